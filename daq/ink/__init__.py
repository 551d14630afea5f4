"""What every picture of ours is drawn with: SVG elements, and values turned into places."""
