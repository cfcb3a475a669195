"""The one way of putting a file where it belongs: whole, or not at all."""
