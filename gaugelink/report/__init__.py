"""Renders results to text and to JSON; returns strings and dicts, prints nothing."""
