"""Files in and out, and the manifest of a run."""
