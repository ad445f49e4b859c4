"""The recruiting summary: one page, true, dated, and only what was agreed to; its forms, and the register of pages."""
