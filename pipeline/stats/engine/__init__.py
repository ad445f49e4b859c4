"""The fits that several questions rest on: mixed models, filters, intervals of many estimates."""
