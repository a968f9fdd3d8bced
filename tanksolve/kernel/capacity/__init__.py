"""The volume below a plane, its moments, and the plane for a volume."""
