"""Several views of one picture in an order, the moves between them, and what is laid over it on the way.

View ... -> Camera each -> Move between two -> Camera at any instant -> a frame
"""
