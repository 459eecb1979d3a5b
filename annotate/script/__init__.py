"""What is said of an evening: from its pictures and their light to a text that can be spoken, item by item.

    Episode (what is known of the evening) -> writers, one an item -> passages -> `compose` within the time given -> Script

Every sentence is a `Message` made of computed values: what cannot be proved is not written. Nothing here knows when it is,
who may be shown or what is kept: that comes with the `Episode`.
"""
