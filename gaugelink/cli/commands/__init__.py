"""Signatures and help of the commands; each passes on to the module that does the work."""
