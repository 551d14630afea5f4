"""restpoint profile: which kinds of gauge are known, and whether a profile is right."""

from typing import TYPE_CHECKING

import click

from daq.cli.options import json_option, print_json

if TYPE_CHECKING:
    from drivers.profile import GaugeProfile


@click.group()
def command() -> None:
    """List, show or check gauge profiles."""


@command.command("list", epilog="Example: restpoint profile list")
@json_option
def list_(as_json: bool) -> None:
    """List the profiles there are, your own ones last."""
    from drivers.profiles import builtin_names, load_profile, user_names

    for name in (*builtin_names(), *user_names()):
        profile = load_profile(name)
        if as_json:
            print_json(name=profile.name, kind=profile.kind, title=profile.title)
        else:
            click.echo(f"{profile.name:<20} {profile.kind:<12} {profile.title}")


@command.command(epilog="Example: restpoint profile show decimal-line")
@click.argument("name")
@json_option
def show(name: str, as_json: bool) -> None:
    """Show a profile as it is written.

    NAME is a profile's name or the path of a file that ends in .toml.
    """
    from drivers.profiles import load_profile, profile_text

    if as_json:
        click.echo(
            load_profile(name).model_dump_json(
                by_alias=True, exclude={"samples", "frame", "check", "layout", "sends"}
            )
        )
        return
    click.echo(profile_text(name)[1], nl=False)


@command.command(epilog="Example: restpoint profile check my-gauge.toml")
@click.argument("name")
@json_option
@click.pass_context
def check(ctx: click.Context, name: str, as_json: bool) -> None:
    """Check a profile: its form, its samples, and what its layout cannot notice.

    Every mistake is named by file and line at once. Then each sample is damaged in every way that
    one lost, doubled or flipped byte can damage it, and the share that would be read as another
    number is counted.
    """
    from drivers.errors import ProfileError, UnknownProfileError
    from drivers.profiles import load_profile

    try:
        profile = load_profile(name)
    except UnknownProfileError:
        raise
    except ProfileError as error:
        for problem in error.problems:
            if as_json:
                print_json(problem=problem)
            else:
                click.echo(problem)
        ctx.exit(1)
    _report(profile, as_json)


def _report(profile: "GaugeProfile", as_json: bool) -> None:
    from drivers.selftest import undetected_faults

    counts = undetected_faults(profile)
    if as_json:
        print_json(
            name=profile.name,
            samples=len(profile.samples),
            faults={
                count.fault: {
                    "tried": count.tried,
                    "refused": count.refused,
                    "same_value": count.same_value,
                    "wrong_value": count.wrong_value,
                }
                for count in counts
            },
        )
        return
    click.echo(f"{profile.name}: the form is right and all {len(profile.samples)} samples hold.")
    for count in counts:
        click.echo(f"  {count}")
    if profile.check is None and any(count.wrong_value for count in counts):
        click.echo("  The layout has no checksum: such a number is a number like any other.")
