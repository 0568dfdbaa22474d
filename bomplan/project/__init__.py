"""What is wanted: the donor car, its bays, its targets and the builder's choices."""

from bomplan.project.classes import CLASSES
from bomplan.project.digest import project_digest
from bomplan.project.echo import echo
from bomplan.project.edit import edit_project, typed
from bomplan.project.load import LoadedProject, ReadFigure, load_project, read_project
from bomplan.project.migrate import upgrade_text
from bomplan.project.new import TEMPLATES, load_template, write_template
from bomplan.project.profiles import Profile, parse_profile
from bomplan.project.records import Project, RoutePoint
from bomplan.project.route import read_route

__all__ = [
    "CLASSES",
    "TEMPLATES",
    "LoadedProject",
    "Profile",
    "Project",
    "ReadFigure",
    "RoutePoint",
    "echo",
    "edit_project",
    "load_project",
    "load_template",
    "parse_profile",
    "project_digest",
    "read_project",
    "read_route",
    "typed",
    "upgrade_text",
    "write_template",
]
