"""Rendered scenes with exact truth: photographs for tests, rectified views for training.

Lengths are millimetres in the **shaft frame**: origin on the shaft's axis at the seal lip's plane,
+z along the axis towards the far end, the viewer roughly at -y. Modules, from the bottom up:

``scene``          the fixed-length description of a scene and its parts
``shapes``         signed distances of the parts
``tracing``        sphere tracing, normals, occlusion
``surroundings``   light arriving from each direction, walls, noise
``shading``        what a ray sees: linear colour and material class
``finishes``       colours and finishes to draw from
``random_scenes``  scenes over the whole range of the trade
``camera``         a pinhole camera with radial distortion; photographs and their truth
``rectified``      the two views that the small networks are trained on
``degrade``        what a phone does to a clean image
"""
