"""Simulated readouts, for learning, demo and tests. Never part of a measurement."""
