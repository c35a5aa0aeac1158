"""The scale card: its geometry, its printed sheet, finding it in a photo, camera and pose."""
