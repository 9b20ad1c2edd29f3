#include <csignal>
#include <exception>
#include <iostream>

#include "app/commands.hpp"

int main(int argc, char** argv) {
  std::ios::sync_with_stdio(false);
  std::signal(SIGPIPE, SIG_IGN);  // a closed pipe or connection is an error to report, not the end
  try {
    return footbridge::app::finish(footbridge::app::run(argc, argv), std::cout, std::cerr);
  } catch (const std::exception& failure) {
    std::cerr << "footbridge: " << failure.what() << '\n';
    return footbridge::app::kOwnFailure;
  }
}
