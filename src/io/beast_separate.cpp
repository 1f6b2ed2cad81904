// Beast is compiled here, once; every other file sees declarations only (BOOST_BEAST_SEPARATE_COMPILATION).
#include <boost/beast/src.hpp>
