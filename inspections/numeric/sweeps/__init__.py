"""Sweep files of analysers: bytes in, frozen records of frequency and dB out, or a refusal in words.

Nothing here opens a file, and nothing is handed to a library that would: whoever calls has read and capped the bytes.
"""
