"""What a sender's own words say, each fact with the words that it was read from: pure functions of a text.

Every language of `moondesk.service.lexicons` is tried, whatever the programme's own is. What is read here is a
suggestion, never told; what no list covers is not read, and never "nothing there".
"""
