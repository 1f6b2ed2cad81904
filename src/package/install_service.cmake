# While it is installed: the unit names the place where the program really goes, and /usr has its settings in /etc.
# in   SOURCE  this folder
set(BIN ${CMAKE_INSTALL_PREFIX}/bin)
if(CMAKE_INSTALL_PREFIX STREQUAL "/usr")
  set(SYSCONF /etc)
else()
  set(SYSCONF ${CMAKE_INSTALL_PREFIX}/etc)
endif()
set(unit ${CMAKE_INSTALL_PREFIX}/lib/systemd/system/sumplog@.service)
configure_file(${SOURCE}/sumplog@.service.in $ENV{DESTDIR}${unit} @ONLY FILE_PERMISSIONS OWNER_READ OWNER_WRITE GROUP_READ WORLD_READ)
message(STATUS "Installing: $ENV{DESTDIR}${unit}")
list(APPEND CMAKE_INSTALL_MANIFEST_FILES ${unit})
# What an administrator wrote there is not written over; in a package the folder is empty.
if(NOT EXISTS $ENV{DESTDIR}${SYSCONF}/sumplog/service.toml)
  file(INSTALL ${SOURCE}/service.toml DESTINATION ${SYSCONF}/sumplog)
endif()
