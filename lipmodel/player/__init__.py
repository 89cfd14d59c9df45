"""A scene becomes physics and is played. The one place where scene and physics meet."""
