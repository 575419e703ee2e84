"""The pages: Flask, server-rendered, closed unless opened to a role."""
