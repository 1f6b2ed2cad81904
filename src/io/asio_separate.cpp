// Asio is compiled here, once; every other file sees declarations only (BOOST_ASIO_SEPARATE_COMPILATION).
#include <boost/asio/impl/src.hpp>
