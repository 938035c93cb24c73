"""The property office of Quarry Lane: it keeps the ventilation jobs of its houses in a table and has them checked."""
