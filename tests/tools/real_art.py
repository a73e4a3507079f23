#!/usr/bin/env python3
"""Writes pictures that ship inside scikit-image (its `data` module names each one's origin and
licence; all are free to use) as files: real_art.py NAME OUT.png"""
import sys

import skimage.data
import skimage.io

skimage.io.imsave(sys.argv[2], getattr(skimage.data, sys.argv[1])(), check_contrast=False)
