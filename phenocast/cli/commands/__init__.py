"""One module for each command; the module's ``command`` is what the group loads."""
