"""The shaft as a cylinder in space, and straightened views of the photo round it."""
