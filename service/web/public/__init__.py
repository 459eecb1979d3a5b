"""The audience's pages: uploads and receipts."""
