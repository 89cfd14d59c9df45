"""What a function was given that it cannot use, told in one sentence with the way out."""

SHOWN = 40  # characters of a value


def wrong(function: str, name: str, value, expected: str, way_out: str = "") -> TypeError:
    """The error to raise: `function: name = value: expected ...; way out`."""
    text = repr(value)
    text = text if len(text) <= SHOWN else f"{text[:SHOWN]}..."
    return TypeError(f"{function}: {name} = {text}: expected {expected}{way_out and '; '}{way_out}")


def check_scene(function: str, scene):
    """TypeError where `scene` is none; a path or a dict is told how to become one."""
    from lipmodel.scene.scene import Scene

    if isinstance(scene, Scene):
        return
    if isinstance(scene, dict):
        raise wrong(function, "scene", scene, "a Scene", "Scene.from_dict(tables) gives one")
    raise wrong(function, "scene", scene, "a Scene", "read_scene(path) gives one")


def check_run(function: str, run):
    """TypeError where `run` is no Run of a scene with a player."""
    from lipmodel.player.run import Run

    if not isinstance(run, Run):
        raise wrong(function, "run", run, "a Run", "simulate(scene) gives one")
