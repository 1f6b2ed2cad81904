#include <unistd.h>

#include "app/command_line.h"

int main(int count, char** words) {
  return sumplog::run_command_line(count, words, environ);
}
