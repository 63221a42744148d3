// What a sketch takes from its core, over readings that a test scripts.
#pragma once
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string>

#define LOW 0
#define HIGH 1
#define OUTPUT 1
const int A0 = 14;

extern unsigned long now_ms;
extern int adc_reading;

inline unsigned long millis() { return now_ms; }
inline void pinMode(int, int) {}
void digitalWrite(int pin, int level);
inline int analogRead(int) { return adc_reading; }
inline char *dtostrf(double value, int width, int digits, char *out) {
  std::sprintf(out, "%*.*f", width, digits, value);
  return out;
}
inline char *ultoa(unsigned long value, char *out, int) {
  std::sprintf(out, "%lu", value);
  return out;
}

struct Port {
  unsigned long baud = 0;
  std::string heard;
  void begin(unsigned long rate) { baud = rate; }
  int available() { return (int)heard.size(); }
  int read() {
    int first = (unsigned char)heard.at(0);
    heard.erase(0, 1);
    return first;
  }
  void print(const char *text) { std::fputs(text, stdout); }
  void println(const char *text) { std::printf("%s\r\n", text); }
};
extern Port Serial;
