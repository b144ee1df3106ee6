"""What a run leaves: folders that are whole or not there, manifests, JSON, the files of a fit."""
