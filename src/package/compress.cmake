# CPack calls this between installing and packing: Debian wants manual pages and change log compressed (policy 12.1, 12.7),
# and without a time stamp, so that the same sources give the same package.
file(GLOB_RECURSE pages ${CPACK_TEMPORARY_INSTALL_DIRECTORY}/usr/share/man/*.[1-9])
execute_process(COMMAND gzip -9nf ${pages} ${CPACK_TEMPORARY_INSTALL_DIRECTORY}/usr/share/doc/sumplog/changelog
                COMMAND_ERROR_IS_FATAL ANY)
