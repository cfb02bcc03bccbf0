"""The photo board: what is done on a photograph (edits), what helps (snap, guide, proposals), and the element itself."""
