"""Simulated gauges in the hands of a simulated repairer."""
