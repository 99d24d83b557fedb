"""Rutwise: which traction aids a wheeled forest machine should carry into a harvest block.

Data flows one way: inputs -> surfaces -> stations -> mechanics and setups -> decision -> outputs.
"""

__all__ = ["__version__"]

__version__ = "0.1.0"
