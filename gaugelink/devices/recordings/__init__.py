"""Recorded exchanges: their layout, writing one, and playing one back."""
