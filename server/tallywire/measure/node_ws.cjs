// Tells everybody with Node's `ws`, to stand beside ours: what comes in at /pad has a text of so many bytes sent to all.
//     node node_ws.cjs SIZE
const { WebSocketServer } = require("ws");

const text = "x".repeat(Number(process.argv[2]));
const server = new WebSocketServer({ host: "127.0.0.1", port: 0, perMessageDeflate: false });
const watchers = new Set();
server.on("listening", () => console.log(server.address().port));
server.on("connection", (socket, request) => {
  if (request.url !== "/pad") watchers.add(socket);
  socket.on("close", () => watchers.delete(socket));
  socket.on("message", () => {
    for (const each of watchers) each.send(text);
  });
});
