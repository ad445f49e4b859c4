select build_id, catalogue_digest, code_version, program_name, invented from build_log;
