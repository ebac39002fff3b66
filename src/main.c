#include "ridgetally/cli/verb.h"

int main(int argc, char **argv)
{
    return rt_main(argc, argv);
}
