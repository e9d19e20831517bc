"""The dog's body: regions, landmarks and cautions as data. Pure."""

from coach.body.regions import Region, RegionFileError, region, regions, told

__all__ = ["Region", "RegionFileError", "region", "regions", "told"]
