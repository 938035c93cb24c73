"""Hostile input: names that would do harm, paths that would lead out, texts that would take all memory and time."""
