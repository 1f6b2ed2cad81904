# What goes where on a Debian system, and the package: cmake --install, cpack. docs/install.md
include(GNUInstallDirs)

# Manual pages and completions are written from the program's own options: they cannot fall behind.
file(GLOB help_sources CONFIGURE_DEPENDS src/package/*.cpp)
add_executable(help_files ${help_sources})
target_link_libraries(help_files PRIVATE sumplog_app)
set(help ${CMAKE_BINARY_DIR}/help)
add_custom_command(OUTPUT ${help}/sumplog.1
                   COMMAND ${CMAKE_COMMAND} -E rm -rf ${help}
                   COMMAND help_files ${help} ${CMAKE_SOURCE_DIR}/src/package ${SUMPLOG_RELEASE_DATE} ${PROJECT_VERSION}
                   DEPENDS help_files src/package/completion.bash.in src/package/completion.zsh.in
                   COMMENT "Writing manual pages and completions")
add_custom_target(sumplog_help ALL DEPENDS ${help}/sumplog.1)

install(TARGETS sumplog)
install(DIRECTORY decoders/ DESTINATION ${CMAKE_INSTALL_DATADIR}/sumplog/decoders)
# The vehicles of `demo` and `simulate`; what was recorded of them is for the tests alone.
install(DIRECTORY captures/ DESTINATION ${CMAKE_INSTALL_DATADIR}/sumplog/captures
        FILES_MATCHING PATTERN scenario.toml PATTERN signals.toml)
install(DIRECTORY ${help}/ DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 FILES_MATCHING PATTERN "*.1")
install(FILES ${help}/sumplog.bash DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions RENAME sumplog)
install(FILES ${help}/_sumplog DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions)
install(FILES README.md src/package/debian/copyright DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/sumplog)
install(DIRECTORY docs/ DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/sumplog/docs)
install(DIRECTORY src/package/examples/ DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/sumplog/examples)
install(FILES src/package/debian/lintian-overrides DESTINATION ${CMAKE_INSTALL_DATADIR}/lintian/overrides RENAME sumplog)
install(CODE "set(SOURCE ${CMAKE_SOURCE_DIR}/src/package)")
install(SCRIPT src/package/install_service.cmake)

# "Wed, 25 Nov 2025 12:00:00 +0000", as Debian writes it
execute_process(COMMAND date -u -R -d ${SUMPLOG_RELEASE_DATE}T12:00:00Z OUTPUT_VARIABLE SUMPLOG_CHANGELOG_DATE
                OUTPUT_STRIP_TRAILING_WHITESPACE COMMAND_ERROR_IS_FATAL ANY)
configure_file(src/package/debian/changelog.in ${CMAKE_BINARY_DIR}/package/changelog @ONLY)
install(FILES ${CMAKE_BINARY_DIR}/package/changelog DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/sumplog)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME sumplog)
set(CPACK_PACKAGE_VENDOR "sumplog developers")
set(CPACK_PACKAGE_CONTACT "sumplog developers <developers@sumplog.invalid>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "transmission fluid temperature through a level check, read-only")
string(JOIN "\n" CPACK_PACKAGE_DESCRIPTION
       "For the technician who services automatic transmissions: plugged into the"
       "car's diagnostic socket through a CAN adapter, it reads the fault codes"
       "before and after the work, logs the temperature of the transmission fluid,"
       "says when the level check can start, and leaves one file that proves the"
       "job and replays offline."
       "."
       "It only ever reads: nothing in it can change the vehicle. The service"
       "sumplog@.service is not started by itself.")
set(CPACK_PACKAGE_DIRECTORY ${CMAKE_BINARY_DIR}/package)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION utils)
set(CPACK_DEBIAN_PACKAGE_PRIORITY optional)
set(CPACK_DEBIAN_PACKAGE_DEPENDS adduser)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
# The program loads it for an index on a server: its version is the one of the library that is linked.
file(REAL_PATH ${SOCI_core} soci_core_file)
string(REGEX REPLACE ".*\\.so\\.([0-9]+\\.[0-9]+).*" "\\1" soci_version ${soci_core_file})
set(CPACK_DEBIAN_PACKAGE_RECOMMENDS libsoci-postgresql${soci_version})
set(CPACK_DEBIAN_PACKAGE_SUGGESTS "alsa-utils, bash-completion, can-utils")
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA "")
foreach(script postinst prerm postrm conffiles)
  list(APPEND CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${CMAKE_SOURCE_DIR}/src/package/debian/${script})
endforeach()
set(CPACK_STRIP_FILES ON)
# Into /usr and /etc below a folder of its own, whatever prefix the build folder has.
set(CPACK_SET_DESTDIR ON)
set(CPACK_INSTALL_PREFIX /usr)
set(CPACK_PRE_BUILD_SCRIPTS ${CMAKE_SOURCE_DIR}/src/package/compress.cmake)
include(CPack)
