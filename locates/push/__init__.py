"""Messages to people's browsers by Web Push: RFC 8030 (the protocol), RFC 8291 with RFC 8188 (encryption),
RFC 8292 (who sends). Knows no framework and reads no clock."""
