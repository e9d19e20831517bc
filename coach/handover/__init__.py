"""What leaves the machine for the vet, and what comes back: folders, reports, tables, plans."""
