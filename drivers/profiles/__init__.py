"""The gauge profiles there are: built-in ones, the user's own, or any file.

A built-in profile is a TOML file in this folder, named for its wire layout. A user's own lie in a
folder of the user's (``user_folder``) and are found by name like the built-in ones.
"""

from functools import lru_cache
from importlib import resources
from pathlib import Path

from drivers.errors import ProfileError, UnknownProfileError
from drivers.profile import GaugeProfile
from drivers.toml_form import check_toml

SUFFIX = ".toml"


def user_folder() -> Path:
    """Where the user's own profiles lie; it need not exist."""
    from platformdirs import user_config_path

    return user_config_path("restpoint") / "profiles"


def builtin_names() -> tuple[str, ...]:
    """The names of the built-in profiles, sorted."""
    files = resources.files(__name__).iterdir()
    return tuple(sorted(f.name.removesuffix(SUFFIX) for f in files if f.name.endswith(SUFFIX)))


def user_names() -> tuple[str, ...]:
    """The names of the profiles in the user's folder, sorted."""
    folder = user_folder()
    return tuple(sorted(p.stem for p in folder.glob(f"*{SUFFIX}"))) if folder.is_dir() else ()


def profile_text(name: str) -> tuple[str, str]:
    """A profile's file name and its text.

    Args:
        name: a profile's name, or the path of a file (it ends in ``.toml``).

    Raises:
        UnknownProfileError: no profile has that name.
        ProfileError: the file cannot be read.
    """
    if name.endswith(SUFFIX):
        return name, _read(Path(name))
    path = user_folder() / (name + SUFFIX)
    if name in user_names():
        if name in builtin_names():
            # A name stands in logbooks: it must never mean two layouts.
            raise ProfileError((f"{path}: has the name of a built-in profile; give it another",))
        return str(path), _read(path)
    if name in builtin_names():
        return name + SUFFIX, (resources.files(__name__) / (name + SUFFIX)).read_text("utf-8")
    raise UnknownProfileError(name, tuple(sorted({*builtin_names(), *user_names()})))


def _read(path: Path) -> str:
    try:
        return path.read_text("utf-8-sig")  # some editors put a byte order mark first
    except OSError as error:
        raise ProfileError((f"{path}: cannot be read: {error.strerror}",)) from error
    except UnicodeDecodeError as error:
        raise ProfileError((f"{path}: is not UTF-8 text; save it as UTF-8",)) from error


def load_profile(name: str) -> GaugeProfile:
    """The profile called ``name``, or the one in the file ``name``.

    Raises:
        UnknownProfileError: no profile has that name.
        ProfileError: the file does not say what a profile must; all problems at once.
    """
    file, text = profile_text(name)
    profile, problems = check_toml(text, file, GaugeProfile)
    if profile is None:
        raise ProfileError(tuple(problems))
    stem = Path(file).stem
    if not name.endswith(SUFFIX) and profile.name != stem:
        raise ProfileError((f"{file}:1: name: is {profile.name!r}; the file's name says {stem!r}",))
    return profile


@lru_cache
def builtin_profiles() -> tuple[GaugeProfile, ...]:
    """All built-in profiles, by name."""
    return tuple(load_profile(name) for name in builtin_names())
