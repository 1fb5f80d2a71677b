"""Hours of practice in one process: does it last?"""
