"""Stages as data, states in time."""
