"""Rules of changing cables, played against each other on pools that wear as the fitted one does."""
