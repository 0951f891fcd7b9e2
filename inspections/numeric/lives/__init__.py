"""How long things last, of which one only knows when they were still good and when they were no longer so."""
