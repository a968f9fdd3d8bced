"""Parts and meshes to one wetted solid; the only layer that knows manifold3d and trimesh."""
