"""The line drawn to scale: one description in millimetres, written as DXF and as SVG."""
