"""Files on the disk: written whole or not at all, safely named, each kind of a library declared once.

It never knows what stands in them.
"""
