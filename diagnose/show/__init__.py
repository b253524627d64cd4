"""Renderers. They show what an Assessment says and decide nothing."""
