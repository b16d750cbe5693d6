"""Charge, converter and gases."""
