-- Version 2: what a dog is looked up by.
CREATE INDEX handovers_dog ON handovers (device, dog);
CREATE INDEX files_dog ON files (device, dog)
