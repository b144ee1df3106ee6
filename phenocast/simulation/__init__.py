"""One block-season as one pure function, and many at once."""
