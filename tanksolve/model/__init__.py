"""What the user describes, checked at birth: attitude, tank, ports, fill, liquid."""
