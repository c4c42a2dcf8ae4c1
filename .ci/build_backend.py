"""setuptools, which here reads from `.ci/sources.in` what a source distribution holds."""

from setuptools.build_meta import *  # noqa: F403  # every hook of PEP 517 and 660
from setuptools.command.egg_info import manifest_maker

manifest_maker.template = ".ci/sources.in"
