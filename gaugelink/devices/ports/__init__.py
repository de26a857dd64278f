"""Transports to real ports, and how a port is known again when it moves."""
