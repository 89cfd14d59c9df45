"""Geometry: curves, sections, bore files, parts, built-in instruments."""
