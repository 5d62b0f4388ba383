"""The empty court as a camera sees it: lens, materials, lamps, and the layers of its picture."""
