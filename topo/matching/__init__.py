"""To be written by the owner of this folder: what it takes, what it gives, what it must not know."""
