"""A surface or a vibration becomes a ranked list of sources.

:func:`read_photo` and :func:`rectify` make a matrix of layer × position of a photo,
:func:`read_wall` its spectrum and profile, :func:`sources_of` what a rig can do to it,
:func:`rank` the list.
:func:`read_record`, :func:`modes` and :func:`filters_left` do the same for an accelerometer.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
