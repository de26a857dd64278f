"""The commands.

``app`` holds their signatures and help and loads nothing heavy; the work of each
command is in a module of its own, loaded when it runs.
"""
