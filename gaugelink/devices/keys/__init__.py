"""Readings that are typed: by a keyboard-type gauge, a person, or a pipe."""
