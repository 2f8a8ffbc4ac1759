# What `cmake --install` and `cpack -G DEB` put in place: the program with its manual pages and
# completion, the library with its headers, the alphabets and the example library.
include(GNUInstallDirs)
include(CMakePackageConfigHelpers)

# One library of all layers that the main job needs.
set(layers base image outline separate typeset reading fit measure trace refset card compare results
           drawing report batch)
set(objects)
foreach(layer IN LISTS layers)
  list(APPEND objects $<TARGET_OBJECTS:debossier_${layer}>)
endforeach()
add_library(debossier_library STATIC ${objects})
set_target_properties(debossier_library PROPERTIES OUTPUT_NAME debossier LINKER_LANGUAGE CXX)

add_executable(make_pages cli/main/make_pages.cpp)
target_link_libraries(make_pages PRIVATE debossier_cli)
set(pages ${CMAKE_CURRENT_BINARY_DIR}/made/pages)
add_custom_command(OUTPUT ${pages}/done
  COMMAND ${CMAKE_COMMAND} -E make_directory ${pages}
  COMMAND make_pages ${pages}
  COMMAND ${CMAKE_COMMAND} -E touch ${pages}/done
  DEPENDS make_pages VERBATIM)
add_custom_target(pages ALL DEPENDS ${pages}/done)

install(TARGETS debossier debossier_library)
install(DIRECTORY ${pages}/ DESTINATION ${CMAKE_INSTALL_MANDIR}/man1 FILES_MATCHING PATTERN "*.1")
install(FILES ${pages}/debossier.bash RENAME debossier
        DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions)
install(FILES ${pages}/_debossier DESTINATION ${CMAKE_INSTALL_DATADIR}/zsh/vendor-completions)
foreach(layer IN LISTS layers)
  file(GLOB headers CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/${layer}/*.h)
  list(FILTER headers EXCLUDE REGEX "/base/version\\.h$")
  install(FILES ${headers} DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/debossier/${layer})
endforeach()
# The version stands in its header once it is installed; here it is a definition.
file(READ base/version.h version_header)
string(REPLACE "= DEBOSSIER_VERSION;" "= \"${PROJECT_VERSION}\";" version_header
       "${version_header}")
file(CONFIGURE OUTPUT ${CMAKE_CURRENT_BINARY_DIR}/made/version.h CONTENT "${version_header}" @ONLY)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/made/version.h
        DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/debossier/base)
install(DIRECTORY ${PROJECT_SOURCE_DIR}/glyphs ${PROJECT_SOURCE_DIR}/refsets
        DESTINATION ${CMAKE_INSTALL_DATADIR}/debossier/library)
install(DIRECTORY ${PROJECT_SOURCE_DIR}/examples/orbenna ${PROJECT_SOURCE_DIR}/examples/kelmare
        DESTINATION ${CMAKE_INSTALL_DATADIR}/debossier/examples)
install(FILES results/result.schema.json results/set-check.schema.json results/dossier.schema.json
        refset/set.schema.json
        DESTINATION ${CMAKE_INSTALL_DATADIR}/debossier)
install(FILES ${PROJECT_SOURCE_DIR}/README.md DESTINATION ${CMAKE_INSTALL_DOCDIR})

# For programs that use the library.
set(packages ${CMAKE_INSTALL_LIBDIR}/cmake/debossier)
configure_package_config_file(cmake/debossier-config.cmake.in
  ${CMAKE_CURRENT_BINARY_DIR}/made/debossier-config.cmake
  INSTALL_DESTINATION ${packages} PATH_VARS CMAKE_INSTALL_LIBDIR CMAKE_INSTALL_INCLUDEDIR)
write_basic_package_version_file(${CMAKE_CURRENT_BINARY_DIR}/made/debossier-config-version.cmake
  COMPATIBILITY SameMinorVersion)
file(RELATIVE_PATH DEBOSSIER_PC_TO_PREFIX /${CMAKE_INSTALL_LIBDIR}/pkgconfig /)
configure_file(cmake/debossier.pc.in ${CMAKE_CURRENT_BINARY_DIR}/made/debossier.pc @ONLY)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/made/debossier-config.cmake
              ${CMAKE_CURRENT_BINARY_DIR}/made/debossier-config-version.cmake
        DESTINATION ${packages})
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/made/debossier.pc
        DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)

set(CPACK_PACKAGE_CONTACT "The debossier project <debossier@example.org>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "compare heat-stamped lettering with reference sets")
set(CPACK_PACKAGE_DESCRIPTION
  "Compares the lettering stamped into a leather item with reference sets built from verified items,
and reports what departs, by how much, and how sure that is.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_GENERATOR DEB)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION graphics)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
# The text of the reports needs a font; HEIC photos are read where libheif is.
set(CPACK_DEBIAN_PACKAGE_DEPENDS "fontconfig, fonts-dejavu-core")
set(CPACK_DEBIAN_PACKAGE_RECOMMENDS libheif1)
set(CPACK_DEBIAN_PACKAGE_SUGGESTS "libeigen3-dev, libexpected-dev, libfmt-dev, libopencv-core-dev")
include(CPack)
