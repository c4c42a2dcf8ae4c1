"""setuptools, which reads what a source distribution holds from `.ci/sources.in`: nothing of building stands at the top."""

from setuptools.build_meta import *  # noqa: F403  # every hook of PEP 517 and 660
from setuptools.command.egg_info import manifest_maker

manifest_maker.template = ".ci/sources.in"
