"""Spreadsheets: from their bytes to the texts that their cells show, and back."""
