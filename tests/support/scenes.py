"""A scene file written and read: an instrument and what its player does."""

from lipmodel.scene.scene import read_scene


def scene(tmp_path, player, name="trumpet", sound=""):
    path = tmp_path / "class.toml"
    path.write_text(f'[instrument]\nname = "{name}"\n[player]\n{player}\n[sound]\n{sound}\n')
    return read_scene(path)
