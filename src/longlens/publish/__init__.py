"""Plates, script and captions, film, brief, tables, model."""
