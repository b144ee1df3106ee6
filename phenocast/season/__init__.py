"""What the user states: site, bed, block, film and cultivar by name."""
