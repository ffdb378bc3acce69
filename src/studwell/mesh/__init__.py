"""Meshes of bodies: blocks, quality, files. Knows no studs."""

from studwell.mesh.blocks import Block, GridBlock, arc, build, check, graded, grid_block
from studwell.mesh.mesh import Mesh
from studwell.mesh.quality import Quality, quality

__all__ = ["Block", "GridBlock", "Mesh", "Quality", "arc", "build", "check", "graded", "grid_block", "quality"]
